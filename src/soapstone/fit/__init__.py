"""How tubes fit what is around them."""
