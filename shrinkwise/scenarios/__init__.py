"""What a switch of lines would change, before it is made."""
