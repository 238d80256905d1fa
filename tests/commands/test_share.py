"""`share`: a PostgreSQL of this machine's own, joining, merging a travelling laptop's record."""

from __future__ import annotations

import ipaddress
import re
import shutil
import socket
import sqlite3
from contextlib import closing
from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest
from cryptography import x509
from cryptography.hazmat.primitives import hashes, serialization
from cryptography.hazmat.primitives.asymmetric import ec
from cryptography.x509.oid import NameOID
from sqlalchemy import make_url, text
from typer.testing import CliRunner, Result

from station.commands.app import app
from station.commands.sharing_start import server_of, start_here
from station.store.embedded import EmbeddedServer, Opening
from station.store.erasure import erase_athlete
from station.store.errors import ServerFailed
from station.store.exchange import Exchange
from station.store.exchange_server import engine_for
from station.store.rack_things import pin_hashes
from station.store.shared_setting import keep_urls, read_urls, url_for
from station.store.sharing import Role
from tests.shared_postgres import Shared
from tests.store.squad_record import AINO, BELA, DAY, add_squad, everything_about, lift, opened


def station(*words: object) -> Result:
    return CliRunner().invoke(app, [str(word) for word in words])


def test_a_machine_joins_with_a_url_and_leaves_again(shared: Shared, tmp_path: Path) -> None:
    for url, role in ((shared.doors.staff, Role.STAFF), (shared.doors.rack, Role.RACK)):
        said = station("share", "join", url, "--data", tmp_path)
        assert (said.exit_code, said.output) == (0, f"this machine takes part as {role}\n")
    assert read_urls(tmp_path) == {Role.RACK: shared.doors.rack, Role.STAFF: shared.doors.staff}
    with closing(opened(tmp_path, "rack 1")):
        said = station("share", "status", "--data", tmp_path)
    assert "rack-1: was never online yet" in said.output
    assert said.output.count("answers") == 2
    assert shared.doors.rack.split(":")[2].split("@")[0] not in said.output
    assert "shares no longer" in station("share", "leave", "--data", tmp_path).output
    assert read_urls(tmp_path) == {}


def test_the_passwords_are_for_their_owner_alone(tmp_path: Path) -> None:
    keep_urls(tmp_path, {Role.STAFF: "postgresql://a:b@c/d"})
    assert (tmp_path / "shared.json").stat().st_mode & 0o077 == 0
    assert url_for(tmp_path, Role.RACK) == "postgresql://a:b@c/d"  # on the desk's own machine


@pytest.mark.parametrize("url", ["nonsense", "postgresql://a:b@127.0.0.1:1/d"])
def test_a_url_that_leads_nowhere_is_not_kept(tmp_path: Path, url: str) -> None:
    said = station("share", "join", url, "--data", tmp_path)
    assert (said.exit_code, len(said.output.splitlines())) == (2, 1)
    assert read_urls(tmp_path) == {}


@pytest.mark.parametrize("left_out", ["--certificate", "--key"])
def test_leaving_the_machine_takes_address_certificate_key_and_password(
    tmp_path: Path, left_out: str
) -> None:
    words = {"--certificate": tmp_path / "c.pem", "--key": tmp_path / "k.pem"}
    given = [part for name, value in words.items() if name != left_out for part in (name, value)]
    said = station("share", "start", "--bind", "192.0.2.1", *given, "--data", tmp_path)
    assert (said.exit_code, "give --certificate, --key and --password" in said.output) == (2, True)


def test_a_room_without_a_server_gets_one_that_is_there_again_after_a_restart(
    postgres: EmbeddedServer, tmp_path: Path
) -> None:
    root = Path(postgres.folder.parent) / f"{postgres.folder.name}-room"
    try:
        start_here(root, None, None, None, None)
        before = read_urls(root)
        for name in ("rack 1", "desk"):
            with closing(opened(root, name)) as record:
                add_squad(record) if name == "desk" else lift(record, None)
        assert "stopped" in station("share", "stop", "--data", root).output
        said = station("share", "start", "--data", root)
        assert said.exit_code == 0, said.output
        assert read_urls(root) == before
        with closing(opened(root, "rack 1")) as rack:
            exchange = Exchange(rack.database.folder, before[Role.RACK], Role.RACK)
            assert exchange.turn().pushed > 0
            exchange.close()
        loopback = engine_for(server_of(root).admin_url)
        with loopback.begin() as connection:
            assert connection.execute(text("SHOW listen_addresses")).scalar_one() == "127.0.0.1"
        loopback.dispose()
    finally:
        server_of(root).stop("immediate")
        shutil.rmtree(root, ignore_errors=True)


def test_a_certificate_that_is_not_there_is_said(tmp_path: Path) -> None:
    server = EmbeddedServer(tmp_path / "postgresql")
    opening = Opening("192.0.2.1", tmp_path / "no.pem", tmp_path / "no.key")
    with pytest.raises(ServerFailed, match=r"no\.pem cannot be read"):
        server.start(opening)


# -- a travelling laptop ---------------------------------------------------------------------------------------------


@pytest.fixture
def laptop(tmp_path: Path) -> Path:
    with closing(opened(tmp_path / "laptop", "rack 9")) as record:
        add_squad(record)
        lift(record, BELA, (0.55,), raw=True)
        everything_about(record, AINO)
    return tmp_path / "laptop" / "rack-9"


def sets_in(folder: Path) -> int:
    with closing(sqlite3.connect(folder / "record.sqlite")) as connection:
        return int(connection.execute("SELECT count(*) FROM sets").fetchone()[0])


@pytest.mark.parametrize("name", ["record.sqlite", "."])
def test_a_laptops_record_is_joined_with_its_raw_samples_and_only_once(
    laptop: Path, tmp_path: Path, name: str
) -> None:
    before = (laptop / "record.sqlite").read_bytes()
    said = station("share", "merge", laptop / name, "--data", tmp_path / "room")
    assert said.exit_code == 0, said.output
    assert "2 raw files taken in, 0 damaged" in said.output
    again = station("share", "merge", laptop / name, "--data", tmp_path / "room")
    assert "0 rows and 0 raw files taken in" in again.output
    assert sets_in(tmp_path / "room" / "desk") == 2
    assert (laptop / "record.sqlite").read_bytes() == before


def test_no_pin_comes_with_a_laptop_where_anybody_may_have_been_the_first(
    laptop: Path, tmp_path: Path
) -> None:
    with closing(opened(laptop.parent, "rack-9")) as record:
        record.add_rows("staff_pins", [{"staff": "Dr. Tomke Weidholz", "pin_hash": "theirs"}])
    assert station("share", "merge", laptop, "--data", tmp_path / "room").exit_code == 0
    with closing(opened(tmp_path / "room", "desk")) as desk:
        assert pin_hashes(desk) == {}


def test_a_backup_of_it_will_do(laptop: Path, tmp_path: Path) -> None:
    assert station("backup", tmp_path / "stick", "--data", laptop.parent).exit_code == 0
    (made,) = (tmp_path / "stick" / "rack-9").glob("*/manifest.json")
    said = station("share", "merge", made, "--data", tmp_path / "room")
    assert "2 raw files taken in" in said.output
    assert sets_in(tmp_path / "room" / "desk") == 2


def test_nothing_of_an_erased_athlete_comes_back_with_a_laptop(laptop: Path, tmp_path: Path) -> None:
    with closing(opened(tmp_path / "room", "desk")) as desk:
        add_squad(desk)
        erase_athlete(desk, AINO, DAY)
    said = station("share", "merge", laptop, "--data", tmp_path / "room")
    assert "1 raw files taken in" in said.output
    with closing(opened(tmp_path / "room", "desk")) as desk:
        assert [a.name for a in desk.athletes(DAY)] == ["Bela Birkholz"]
    assert sets_in(tmp_path / "room" / "desk") == 1


def test_a_damaged_raw_file_is_left_out_and_named(laptop: Path, tmp_path: Path) -> None:
    damaged = next((laptop / "raw").glob("*.parquet"))
    damaged.write_bytes(damaged.read_bytes()[:-1])
    said = station("share", "merge", laptop, "--data", tmp_path / "room")
    assert f"raw samples damaged, left out: {damaged.name}" in said.output


def test_what_is_no_record_is_refused_with_a_sentence(tmp_path: Path) -> None:
    (tmp_path / "record.sqlite").write_text("a shopping list")
    for name in ("record.sqlite", "other.txt", "."):
        said = station("share", "merge", tmp_path / name, "--data", tmp_path / "room")
        assert (said.exit_code, len(said.output.splitlines())) == (2, 1)


# -- out of the machine -------------------------------------------------------------------------------------------


def own_address() -> str:
    """An address of this machine that others could reach; the socket sends nothing."""
    with socket.socket(socket.AF_INET, socket.SOCK_DGRAM) as asked:
        try:
            asked.connect(("192.0.2.1", 9))  # TEST-NET-1, RFC 5737
        except OSError:
            pytest.skip("this machine has no network address but its own loopback")
        return str(asked.getsockname()[0])


def certificate_for(address: str, folder: Path) -> tuple[Path, Path]:
    """A self-signed certificate and its key, PEM."""
    key = ec.generate_private_key(ec.SECP256R1())
    name = x509.Name([x509.NameAttribute(NameOID.COMMON_NAME, "room")])
    today = datetime.now(UTC)
    made = (
        x509.CertificateBuilder()
        .subject_name(name)
        .issuer_name(name)
        .public_key(key.public_key())
        .serial_number(x509.random_serial_number())
        .not_valid_before(today - timedelta(days=1))
        .not_valid_after(today + timedelta(days=30))
        .add_extension(
            x509.SubjectAlternativeName([x509.IPAddress(ipaddress.ip_address(address))]), critical=False
        )
        .sign(key, hashes.SHA256())
    )
    certificate, secret = folder / "room.pem", folder / "room.key"
    certificate.write_bytes(made.public_bytes(serialization.Encoding.PEM))
    form = serialization.PrivateFormat.PKCS8
    secret.write_bytes(key.private_bytes(serialization.Encoding.PEM, form, serialization.NoEncryption()))
    return certificate, secret


def test_other_machines_come_in_over_tls_with_the_password_and_not_otherwise(
    postgres: EmbeddedServer, tmp_path: Path
) -> None:
    address, root = own_address(), Path(postgres.folder.parent) / f"{postgres.folder.name}-open"
    certificate, key = certificate_for(address, tmp_path)
    words = ["share", "start", "--bind", address, "--certificate", certificate, "--key", key]
    try:
        said = CliRunner().invoke(
            app,
            [*map(str, words), "--password", "--data", str(root)],
            input="otters swim at night\notters swim at night\n",
        )
        assert said.exit_code == 0, said.output
        (printed,) = re.findall(r"share join '(postgresql://\S+)'", said.output)
        assert "otters" not in printed
        away = (
            make_url(printed)
            .set(password="otters swim at night")
            .update_query_dict({"sslmode": "verify-full", "sslrootcert": str(certificate)})
        )
        joined = station("share", "join", away.render_as_string(hide_password=False), "--data", tmp_path)
        assert (joined.exit_code, joined.output) == (0, "this machine takes part as rack\n")
        engine = engine_for(read_urls(tmp_path)[Role.RACK])
        with engine.begin() as connection:
            driver = connection.connection.driver_connection
            assert driver is not None
            assert driver.pgconn.ssl_in_use  # libpq's own word
            # More than one message goes through, both ways.
            assert connection.execute(text("SELECT length(repeat('otter', 100000))")).scalar_one() == 500_000
            assert len(connection.execute(text("SELECT repeat('otter', 100000)")).scalar_one()) == 500_000
        engine.dispose()
        admin = make_url(server_of(root).admin_url).set(host=address)
        for refused in (
            away.update_query_dict({"sslmode": "disable", "sslrootcert": ""}),
            away.set(password="a wrong password"),
            admin.update_query_dict({"sslmode": "require"}),
        ):
            tried = station(
                "share", "join", refused.render_as_string(hide_password=False), "--data", tmp_path
            )
            assert tried.exit_code == 2, tried.output
        assert "stopped" in station("share", "stop", "--data", root).output
        closed = station("share", "join", away.render_as_string(hide_password=False), "--data", tmp_path)
        assert closed.exit_code == 2, closed.output
    finally:
        server_of(root).stop("immediate")
        shutil.rmtree(root, ignore_errors=True)
