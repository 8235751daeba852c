"""What leaves in other formats: sidecars by exiv2, labels by zbar, LIDO by an XML parser."""

import pathlib
import re
import shutil
import subprocess
import xml.etree.ElementTree as xml

import cv2
import numpy as np

from probe import Skip

NAMES = {"lido": "http://www.lido-schema.org", "xml": "http://www.w3.org/XML/1998/namespace"}


def tool(name, package):
    path = shutil.which(name)
    if path is None:
        raise Skip(f"{name} is not here: install the Debian package {package}")
    return path


def two_pieces(probe):
    """A marked cup and a bare saucer, in words that must be escaped."""
    sale = probe.folder / "sale"
    sale.mkdir()
    for name, grey in (("cup", 200), ("saucer", 90)):
        cv2.imwrite(str(sale / f"{name}.png"), np.full((60, 80, 3), grey, np.uint8))
    probe.footring("init", "desk")
    library = probe.folder / "desk" / "library" / "hollin"
    (library / "fern").mkdir(parents=True)
    (library / "maker.toml").write_text('names = ["Hollin & Vale <Pottery>"]\n')
    (library / "fern" / "mark.toml").write_text('name = "Fern \'in\' a ring"\nused = "1927/1936"\n')
    run = lambda *words: probe.footring(*words, at="desk")  # noqa: E731
    run("intake", "../sale", "--lot", "fair")
    run("decide", "cup.png", "--family", "hollin/fern")
    run("decide", "saucer.png", "--no-mark")
    run("piece", "new", "underside=cup.png", "--form", "Kaffeetäßchen", "--size", "diameter 82, height 61",
        "--decoration", 'Reed "large" & small', "--cost", "EUR 3.75", "--place", "attic", "--owner", "Odile")
    run("piece", "new", "underside=saucer.png", "--form", "saucer", "--probably")
    return probe.folder / "desk"


def check_sidecars_by_exiv2(probe):
    exiv2 = tool("exiv2", "exiv2")
    desk = two_pieces(probe)
    probe.footring("xmp", "--into", "club", at="desk")
    told = {}
    sidecars = sorted((desk / "club").glob("*.xmp"))
    assert len(sidecars) == 2
    for path in sidecars:
        done = subprocess.run([exiv2, "-PXkt", path], capture_output=True, text=True)
        assert done.returncode == 0 and not done.stderr, done.stderr
        told[path.name[:4]] = dict(re.split(r"\s+", line, maxsplit=1) for line in done.stdout.splitlines() if " " in line)
    cup = told["0001"]
    assert cup["Xmp.dc.title"] == 'lang="x-default" Kaffeetäßchen', cup
    assert 'Marked by Hollin & Vale <Pottery>' in cup["Xmp.dc.description"], cup
    subjects = cup["Xmp.dc.subject"].split(", ")
    assert {"Kaffeetäßchen", "Hollin & Vale <Pottery>", 'Reed "large" & small', "piece 1"} <= set(subjects), subjects
    assert cup["Xmp.photoshop.Headline"] == "Kaffeetäßchen", cup
    assert "Photo of the underside" in cup["Xmp.iptc.AltTextAccessibility"], cup
    assert told["0002"]["Xmp.dc.title"].endswith("Possibly saucer")
    for path in sidecars:
        for secret in ("3.75", "attic", "Odile", str(desk)):
            assert secret not in path.read_text(encoding="utf-8"), secret
    return f"{len(sidecars)} sidecars, {sum(map(len, told.values()))} properties"


def drawn(svg, px):
    """The code of a label as pixels, `px` for each module."""
    side = int(re.search(r'viewBox="0 0 (\d+)', svg)[1])
    page = np.full((side, side), 238, np.uint8)
    for x, y in re.findall(r"M(\d+) (\d+)h1v1h-1z", svg):
        page[int(y), int(x)] = 28
    return page.repeat(px, 0).repeat(px, 1)


def photographed(code, turn, tilt, noise):
    """A code on a table: turned, seen at a slant, blurred and grainy."""
    side = code.shape[0]
    angle = np.deg2rad(turn)
    corners = np.array([[-1, -1], [1, -1], [1, 1], [-1, 1]]) @ np.array(
        [[np.cos(angle), np.sin(angle)], [-np.sin(angle), np.cos(angle)]])
    depth = 1 + tilt * corners[:, :1]
    there = np.float32(corners * 150 / depth + (500, 380))
    here = np.float32([[0, 0], [side, 0], [side, side], [0, side]])
    view = cv2.getPerspectiveTransform(here, there)
    photo = np.full((760, 1000), 140, np.uint8)
    cv2.warpPerspective(code, view, (1000, 760), photo, cv2.INTER_AREA, cv2.BORDER_TRANSPARENT)
    photo = cv2.GaussianBlur(photo, (0, 0), 1.1).astype(float)
    photo += np.random.default_rng(3).normal(0, noise, photo.shape)
    return cv2.cvtColor(photo.clip(0, 255).astype(np.uint8), cv2.COLOR_GRAY2BGR)


def check_labels_by_zbar(probe):
    zbar = tool("zbarimg", "zbar-tools")
    desk = two_pieces(probe)
    probe.footring("labels", "--html", "labels.html", at="desk")
    codes = re.findall(r"<svg.*?</svg>", (desk / "labels.html").read_text(encoding="utf-8"), re.S)
    assert len(codes) == 2
    later = probe.folder / "later"
    later.mkdir()
    views = [(0, 0, 0), (17, 0.05, 3), (90, 0.1, 4), (200, 0.1, 4), (315, 0.06, 4)]
    read = 0
    for number, svg in enumerate(codes, 1):
        key = re.search(r'aria-label="([^"]+)"', svg)[1]
        assert key.startswith(f"FOOTRING:{number}:")
        for at, view in enumerate(views):
            path = later / f"label-{number}-{at}.png"
            cv2.imwrite(str(path), photographed(drawn(svg, 8), *view))
            done = subprocess.run([zbar, "-q", "--raw", path], capture_output=True, text=True)
            assert done.stdout.strip() == key, f"{path.name}: {done.stdout!r}, not {key}"
            read += 1
    # What zbar reads we read, and offer each photo for the piece of its label.
    told = probe.footring("intake", "../later", "--lot", "later", at="desk")
    for number in (1, 2):
        for at in range(len(views)):
            offered = f"label-{number}-{at}.png: the label of piece {number}: "
            assert offered in told, f"{offered} is not in\n{told}"
    return f"{read} photos of labels, read by both"


def check_lido_is_well_formed_and_in_order(probe):
    desk = two_pieces(probe)
    probe.footring("lido", "--xml", "all.xml", at="desk")
    text = pathlib.Path(desk / "all.xml").read_text(encoding="utf-8")
    pieces = xml.fromstring(text).findall("lido:lido", NAMES)
    assert len(pieces) == 2
    # The order of elements in the schema of LIDO 1.1 (ICOM CIDOC 2021), read in part, the rest from memory; the schema
    # itself is not run.
    order = {
        "lido": ["lidoRecID", "descriptiveMetadata", "administrativeMetadata"],
        "descriptiveMetadata": ["objectClassificationWrap", "objectIdentificationWrap", "eventWrap"],
        "objectIdentificationWrap": ["titleWrap", "inscriptionsWrap", "displayStateEditionWrap",
                                     "objectDescriptionWrap", "objectMeasurementsWrap"],
        "event": ["eventType", "eventActor", "eventDate", "eventMaterialsTech"],
        "eventActor": ["displayActorInRole", "actorInRole"],
        "actorInRole": ["actor", "roleActor", "attributionQualifierActor"],
        "recordWrap": ["recordID", "recordType", "recordSource"],
    }
    held = 0
    for element in xml.fromstring(text).iter():
        name = element.tag.split("}")[1]
        if name in order:
            places = [order[name].index(child.tag.split("}")[1]) for child in element]
            assert places == sorted(places), f"{name}: {places}"
            held += 1
    cup = pieces[0]
    value = lambda path: cup.findtext(f".//lido:{path}", namespaces=NAMES)  # noqa: E731
    assert value("titleSet/lido:appellationValue") == "Kaffeetäßchen"
    assert value("nameActorSet/lido:appellationValue") == "Hollin & Vale <Pottery>"
    assert (value("earliestDate"), value("latestDate")) == ("1927-01-01", "1936-12-31")
    assert [e.text for e in cup.iterfind(".//lido:measurementValue", NAMES)] == ["82", "61"]
    for secret in ("3.75", "attic", "Odile", str(desk)):
        assert secret not in text, secret
    return f"2 pieces, the order held in {held} elements"
