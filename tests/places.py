"""The two forms of place that a register can stand in, as one fixture."""

from __future__ import annotations

import uuid

import pytest


@pytest.fixture(scope="session")
def bucket_server():
    """An S3 server of this machine, spoken to over real HTTP."""
    import boto3
    from moto.server import ThreadedMotoServer

    server = ThreadedMotoServer(ip_address="127.0.0.1", port=0, verbose=False)
    server.start()
    host, port = server.get_host_and_port()
    url = f"http://{host}:{port}"
    env = {
        "AWS_ENDPOINT_URL": url, "AWS_ALLOW_HTTP": "true", "AWS_ACCESS_KEY_ID": "testing",
        "AWS_SECRET_ACCESS_KEY": "testing", "AWS_REGION": "us-east-1",
    }  # fmt: skip
    boto3.client(
        "s3", endpoint_url=url, region_name="us-east-1", aws_access_key_id="testing", aws_secret_access_key="testing"
    ).create_bucket(Bucket="registers")
    yield env
    server.stop()


@pytest.fixture(params=["folder", "bucket"])
def where(request, tmp_path, monkeypatch):
    """A fresh place of each form."""
    if request.param == "folder":
        return str(tmp_path / "register")
    for name, value in request.getfixturevalue("bucket_server").items():
        monkeypatch.setenv(name, value)
    return f"s3://registers/{uuid.uuid4().hex}"
