"""The ways out of a verdict: writing one's sentence for the buyer onto the labels."""

from uuid import UUID

from fastapi import APIRouter, Request, Response
from fastapi.responses import RedirectResponse

from dyewright.services.judging import labels
from dyewright.web.door import Opened
from dyewright.web.render import base_path

__all__ = ["router"]

router = APIRouter()


@router.post("/verdicts/{judgement_id}/ways/{number}/label")
def write_on_label(request: Request, records: Opened, judgement_id: UUID, number: int) -> Response:
    with records.begin() as session:
        onward = labels.write_buyer_caution(session, judgement_id, number)
    return RedirectResponse(f"{base_path(request)}{onward}", status_code=303)
