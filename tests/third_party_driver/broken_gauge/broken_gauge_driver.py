"""What goes wrong in other people's code: the module cannot even be imported."""

raise RuntimeError("the licence file is missing")
