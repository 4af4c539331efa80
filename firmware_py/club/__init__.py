"""One box of a club: what it says of itself over MQTT, and what it takes from a board."""
