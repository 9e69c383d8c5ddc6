"""What every problem document must be."""

from __future__ import annotations

from hotface_api.http.problems import Code

MEMBERS = {
    "type",
    "title",
    "status",
    "detail",
    "instance",
    "code",
    "request_id",
    "errors",
}
CODES = {code.word: code for code in Code}


def check_problem(response, status, code):
    """Hold a response against the problem shape and give its document."""
    assert response.status_code == status, response.text
    assert response.content_type == "application/problem+json"
    assert response.headers["Cache-Control"] == "no-store"
    assert "ETag" not in response.headers
    document = response.get_json()
    check_document(document, status, code)
    assert document["request_id"] == response.headers["X-Request-Id"]
    return document


def check_document(document, status, code):
    """Hold a document against the problem shape."""
    assert set(document) - {"nearest"} == MEMBERS
    assert document["code"] == code
    assert CODES[code].status == document["status"] == status
    assert document["title"] == CODES[code].title
    assert document["type"] == f"/v1/problems/{code}"
    assert document["detail"]
    assert "Traceback" not in document["detail"]
    for error in document["errors"]:
        assert set(error) <= {"detail", "pointer", "parameter"}
        assert len(error) == 2
        assert error["detail"]
        assert error.get("pointer", "#").startswith("#")
