"""What other parts would bring."""
