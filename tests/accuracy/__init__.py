"""How near the main job comes to the truth, on editions whose truth is known."""
