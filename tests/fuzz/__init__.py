"""Files and rule text from strangers, by the million: targets, and the tool that runs them."""
