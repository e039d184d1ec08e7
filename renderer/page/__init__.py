"""The page: a lesson in a browser while it is written. Only here is known that there is a browser."""
