"""Lengths, ratios and volumes of 2-D pictures from landmarks, lines and traces, with their errors. Pure."""

from fanlight.measure.picture.from_marks import given_by_hand
from fanlight.measure.picture.from_network import given_by_network
from fanlight.measure.picture.placed import Given, Grid, Placed
from fanlight.measure.picture.values import measure_picture

__all__ = ["Given", "Grid", "Placed", "given_by_hand", "given_by_network", "measure_picture"]
