"""Printed sheets and drawings, made from results: nothing is worked out here but how to show it."""
