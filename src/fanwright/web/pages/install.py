"""How a tablet comes to trust this machine, and how that is taken back; and the authority itself."""

from __future__ import annotations

from fastapi import APIRouter, HTTPException, Request
from starlette.responses import Response

from fanwright.web.names import disposition
from fanwright.web.shown import page
from fanwright.web.tls import Certificates, fingerprint

router = APIRouter()


@router.get("/install")
def install(request: Request) -> Response:
    """Tell how to install the authority on a tablet and how to remove it."""
    folder = request.app.state.settings.tls
    seal = "" if folder is None else fingerprint(Certificates(folder).authority)
    return page(request, "install.html", seal=seal, names=request.app.state.settings.names)


@router.get("/authority.crt")
def authority(request: Request) -> Response:
    """Give the certificate of the authority; its key never leaves the machine."""
    folder = request.app.state.settings.tls
    if folder is None:
        raise HTTPException(404, "these pages are served to this machine only, without a certificate")
    from cryptography import x509
    from cryptography.hazmat.primitives.serialization import Encoding

    kept = x509.load_pem_x509_certificate(Certificates(folder).authority.read_bytes())
    return Response(
        kept.public_bytes(Encoding.DER),
        media_type="application/x-x509-ca-cert",
        headers={"content-disposition": disposition("fanwright-authority.crt")},
    )
