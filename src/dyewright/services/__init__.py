"""One function per studio task: joins the layers, knows no framework."""
