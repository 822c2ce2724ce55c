"""The whole job as one file to print."""

import io
from collections.abc import Iterable


def job_pdf(documents: Iterable[bytes]) -> bytes:
    """The pages of PDF documents one after the other; b"" where none has any.

    Their pages are taken as they are: drawing them again would cost as much as drawing them once.
    """
    from pypdf import PdfReader, PdfWriter

    job = PdfWriter()
    for document in documents:
        if document:
            for page in PdfReader(io.BytesIO(document)).pages:
                job.add_page(page)
    if not job.pages:
        return b""
    stream = io.BytesIO()
    job.write(stream)
    return stream.getvalue()
