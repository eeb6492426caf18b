"""What is drawn and printed: charts, PDF sheets, labels."""
