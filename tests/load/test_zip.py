"""Packages in a zip: read like a folder, and no way to read or fill anything else."""

from __future__ import annotations

import stat
import struct
import zipfile

import pytest

from hotface_api.load import files
from hotface_api.load.loader import load
from hotface_api.load.package import PackageError, read_package
from support.packages import small_package


@pytest.fixture
def members(tmp_path):
    folder = small_package(tmp_path / "folder").parent
    return {path.name: path.read_bytes() for path in sorted(folder.iterdir())}


def pack(path, members, **options):
    with zipfile.ZipFile(path, "w", zipfile.ZIP_DEFLATED) as archive:
        for name, content in members.items():
            archive.writestr(name, content, **options)
    return path


def test_a_zip_reads_as_its_folder_does(tmp_path, members):
    folder = read_package(tmp_path / "folder" / "datapackage.json")
    zipped = read_package(pack(tmp_path / "package.zip", members))
    assert zipped == folder


def test_a_zip_loads_and_then_its_folder_changes_nothing(migrated, tmp_path, members):
    assert load(migrated, pack(tmp_path / "package.ZIP", members)).changed
    assert not load(migrated, tmp_path / "folder" / "datapackage.json").changed


def test_further_plain_files_in_a_zip_do_no_harm(tmp_path, members):
    path = pack(tmp_path / "package.zip", {**members, "README.txt": b"hello"})
    assert read_package(path).rows["values"]


BAD_NAMES = [
    "../evil.csv",
    "/etc/passwd",
    "folder/values.csv",
    "..",
    "a\\b.csv",
    "C:values.csv",
    "-rf",
    ".hidden",
    "values.csv\n",
    "x" * 101,
    "na\u0308me.csv",
    "folder/",
]


@pytest.mark.parametrize("name", BAD_NAMES)
def test_a_member_that_is_no_plain_name_is_refused(tmp_path, members, name):
    path = pack(tmp_path / "package.zip", {**members, name: b"x"})
    with pytest.raises(PackageError, match="plain file name"):
        read_package(path)
    assert sorted(p.name for p in tmp_path.iterdir()) == ["folder", "package.zip"]


@pytest.mark.filterwarnings("ignore:Duplicate name")
def test_a_member_given_twice_is_refused(tmp_path, members):
    path = pack(tmp_path / "package.zip", members)
    with zipfile.ZipFile(path, "a") as archive:
        archive.writestr("values.csv", b"another")
    with pytest.raises(PackageError, match="twice"):
        read_package(path)


def test_a_member_larger_than_allowed_is_refused_before_it_fills_memory(tmp_path, members):
    huge = b"0" * (files.MAX_FILE + 1)  # packs to a few kilobytes
    path = pack(tmp_path / "package.zip", {**members, "values.csv": huge})
    assert path.stat().st_size < 200_000
    with pytest.raises(PackageError, match="larger than 32 MiB"):
        read_package(path)


def test_many_members_that_are_too_much_together_are_refused(tmp_path, members):
    half = b"0" * (files.MAX_FILE - 1)
    path = pack(tmp_path / "package.zip", {**members, "a": half, "b": half, "c": half})
    with pytest.raises(PackageError, match="unpacks to more than 64 MiB"):
        read_package(path)


def test_too_many_members_are_refused(tmp_path, members):
    path = pack(tmp_path / "package.zip", {**members, **{f"m{n}": b"" for n in range(80)}})
    with pytest.raises(PackageError, match="at most 64"):
        read_package(path)


def test_a_size_that_lies_is_not_believed(tmp_path, members):
    """The central directory is made to say that a large member has one byte."""
    path = pack(tmp_path / "package.zip", {"values.csv": b"0" * (files.MAX_FILE + 9), **members})
    content = bytearray(path.read_bytes())
    for mark, place in ((b"PK\x01\x02", 24), (b"PK\x03\x04", 22)):
        start = content.index(mark)
        struct.pack_into("<I", content, start + place, 1)
    path.write_bytes(content)
    with pytest.raises(PackageError):
        read_package(path)


def test_a_link_in_a_zip_is_read_as_the_text_it_is(tmp_path, members):
    link = zipfile.ZipInfo("values.csv")
    link.create_system = 3
    link.external_attr = (stat.S_IFLNK | 0o777) << 16
    with zipfile.ZipFile(tmp_path / "package.zip", "w") as archive:
        for name, content in members.items():
            if name != "values.csv":
                archive.writestr(name, content)
        archive.writestr(link, "/etc/passwd")
    with pytest.raises(PackageError, match=r"values\.csv, row 1: the header differs"):
        read_package(tmp_path / "package.zip")


@pytest.mark.parametrize("cut", [0, 10, 400, -30])
def test_a_zip_that_is_cut_short_is_refused(tmp_path, members, cut):
    path = pack(tmp_path / "package.zip", members)
    path.write_bytes(path.read_bytes()[:cut])
    with pytest.raises(PackageError, match=r"package\.zip"):
        read_package(path)


def test_a_zip_with_a_damaged_member_is_refused(tmp_path, members):
    path = tmp_path / "package.zip"
    with zipfile.ZipFile(path, "w", zipfile.ZIP_STORED) as archive:
        for name, content in members.items():
            archive.writestr(name, content)
    content = path.read_bytes()
    path.write_bytes(content.replace(b"demo-perlite", b"demo-perfect", 1))
    with pytest.raises(PackageError, match="CRC"):
        read_package(path)


def test_a_zip_without_a_descriptor_or_a_table_is_refused(tmp_path, members):
    del members["values.csv"]
    with pytest.raises(PackageError, match=r"values\.csv: is not in the zip"):
        read_package(pack(tmp_path / "package.zip", members))
    del members["datapackage.json"]
    with pytest.raises(PackageError, match="is not in the zip"):
        read_package(pack(tmp_path / "package.zip", members))


def test_an_encrypted_zip_is_refused(tmp_path, members):
    path = pack(tmp_path / "package.zip", members)
    content = bytearray(path.read_bytes())
    for mark, place in ((b"PK\x01\x02", 8), (b"PK\x03\x04", 6)):
        content[content.index(mark) + place] |= 1  # the flag that says a member is encrypted
    path.write_bytes(content)
    with pytest.raises(PackageError, match="can be read"):
        read_package(path)


def test_a_zip_that_is_not_there_is_refused(tmp_path):
    with pytest.raises(PackageError, match="cannot be read"):
        read_package(tmp_path / "nothing.zip")


def test_a_file_in_a_folder_is_bounded_too(tmp_path):
    path = small_package(tmp_path)
    (tmp_path / "values.csv").write_bytes(b"0" * (files.MAX_FILE + 1))
    with pytest.raises(PackageError, match="larger than 32 MiB"):
        read_package(path)
