"""How things are said in plain text."""
