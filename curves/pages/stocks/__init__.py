"""What the lab knows of each film stock: the list, one sheet each, and entering stocks and batches."""
