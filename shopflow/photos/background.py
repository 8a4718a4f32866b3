from __future__ import annotations

from shopflow.common import jobs

from .models import Photo
from .services import make_copies


@jobs.kind("photo-copies")
def photo_copies(run: jobs.Run, *, photo_id: int) -> dict[str, str]:
    """Make the copies of one photo; done twice, the second time finds nothing to do."""
    photo = make_copies(Photo.objects.get(pk=photo_id))
    return {"state": photo.state, "refusal": photo.refusal}
