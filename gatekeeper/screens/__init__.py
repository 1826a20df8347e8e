"""Facts for screens, gathered from state, history and folders; `show` lays them out."""
