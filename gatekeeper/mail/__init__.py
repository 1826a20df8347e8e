"""Letters to the people of the room: written, kept until they are sent, sent through SMTP."""
