"""Pages: uploading scans, saying what they show, and the list of them."""
