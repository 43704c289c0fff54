"""Do the tests see a wrong sign?  A tool that puts small faults into the package and runs the tests."""
