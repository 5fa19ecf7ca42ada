"""What happens in the yard: sticks bought and cut for the least money."""
