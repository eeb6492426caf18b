"""The studio's database: tables, mapping to the domain dataclasses, migrations, functions on a Session."""
