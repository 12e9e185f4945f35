"""Whether the plane of a clip is the one that its view asks for: from landmarks, kept masks and a person's marks."""
