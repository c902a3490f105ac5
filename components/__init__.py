"""What one element of a microwave line is and does; knows nothing of chains of them."""
