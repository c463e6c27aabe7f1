"""What opens below each stage of the path: lines made from the model, and which actions there are."""
