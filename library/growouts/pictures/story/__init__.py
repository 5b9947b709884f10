"""How a season went: what was promised, what came back, what it changed."""

from library.growouts.pictures.story.reading import SeasonStory, story_of

__all__ = ["SeasonStory", "story_of"]
