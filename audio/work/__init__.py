"""The process that does all arithmetic on sound."""
