"""What is said about photos and about the places on them."""

from .photos import BatchForm, FindingPhotoForm, PhotoForm, SendForm

__all__ = ["BatchForm", "FindingPhotoForm", "PhotoForm", "SendForm"]
