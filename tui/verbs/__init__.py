"""The verbs of the command line, one module each; loaded when the verb is used."""
