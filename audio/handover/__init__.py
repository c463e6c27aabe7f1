"""What leaves the building: the recall sheet, the listening page, the files' list."""
