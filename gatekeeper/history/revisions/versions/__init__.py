"""One file a version, named after what it does; once released it is never changed."""
