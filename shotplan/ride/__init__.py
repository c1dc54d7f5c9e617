"""From a recording or a drawn line to where the rider is at each moment."""
