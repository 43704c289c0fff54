"""Tests of waitwright."""
