"""What one element of a microwave line is and does; knows nothing of chains of them."""

BELONGS_TO = "chain"
"""By which chain knows that this is its own, and no folder of the same name beside the user."""
