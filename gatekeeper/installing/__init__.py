"""gatekeeper as a service of systemd: what belongs on the machine, and putting it there."""
