"""Invented words for marks: potteries, lines, places and the small print.

Each split has stems and endings of its own, so that no name, and no half of a
name, of the test marks was ever seen while anything was tuned. All names are
made up; `python3 tools/artwork/words.py` prints them for a look.
"""

import itertools
import random

# Halves of place-like names. Stems are chosen odd enough not to be a town.
STEMS = {
    "fit": "Ambel Brindle Corve Dunsel Elver Farrow Gritten Hobbel Ister Jessam Kestel Lunder "
           "Marrick Nessel Orlan Pellow Quarn Ruddle Sallow Tarrant Ulver Vennel Wichel Yarrel "
           "Oskin Braddle Cutter Dremmel Fennel Grissel",
    "tune": "Abber Bostle Cringle Dapple Embrel Fossel Garrick Hindle Ivel Jorrel Kippel Lastle "
            "Mottle Nittle Ombrel",
    "test": "Ackel Bellan Crandle Dorrel Estle Flaxen Gosset Huckle Ingrel Jassow Knapple Lorrim "
            "Muskel Norrel Ottle Pemmel Quillow Rostle Sprindle Thessel Ulmer Vosset Wendle Yostle "
            "Zennel Cobbel Durrish Frammel Gantle Hesper",
}
ENDS = {
    "fit": "mere wick holt gate combe",
    "tune": "stow thorpe mouth dale",
    "test": "ford beck leigh hurst strand",
}
WORKS = {
    "fit": ["Pottery", "& Sons", "China Works", "Brothers", "Ware", "Bone China"],
    "tune": ["Potteries", "& Daughters", "Stoneware", "Porcelain"],
    "test": ["Earthenware", "& Co.", "Fine China", "Works", "Ceramics", "Ironstone"],
}
FIRST = {
    "fit": "Silver Plum Copper Windy Scarlet Quiet Marbled Wandering Tangled Northern Ribbon "
           "Barley Speckled Hollow Lantern Amber Velvet Drifting",
    "tune": "Frosted Juniper Gilded Crooked Misty Harvest Painted Swallow Cinder Linen",
    "test": "Russet Saffron Mossy Twilight Braided Pewter Salted Meander Hidden Bramble Ivory "
            "Candle Feathered Sundown Inland Wicker Dappled Cobalt",
}
SECOND = {
    "fit": "Thicket Lattice Orchardry Tidewater Overture Sonata Hedgerow Cascade Pavilion Minuet "
           "Sparrow Rivulet Trellis Mosaic",
    "tune": "Garland Arcade Parade Fountain Serenade Pasture Ember Cameo",
    "test": "Meadowlark Arbour Rondo Harbour Bouquet Estuary Filigree Promenade Nocturne Spindle "
            "Windfall Terrace Heather Carousel",
}
PLACE_ENDS = {"fit": ["ton", "ley", "bury"], "tune": ["ham", "cote"], "test": ["worth", "by", "field"]}
COUNTRIES = {
    "fit": ["Ostravia", "Northmark", "Velland", "Corrania"],
    "tune": ["Estmoor", "Larennia"],
    "test": ["Sundria", "Westhaven", "Morvany", "Tesselay"],
}
EXTRAS = {
    "fit": ["MADE IN {C}", "DISHWASHER SAFE", "UNDERGLAZE", "HAND PAINTED", "EST. {Y}", "Semi-Porcelain",
            "Pattern {N}", "REG. No. {N}", "Oven Proof", "22 K GOLD", "Genuine Stoneware"],
    "tune": ["PRODUCT OF {C}", "OVEN TO TABLE", "HAND ENGRAVED", "SINCE {Y}", "Vitrified", "No. {N}",
             "Microwave Safe"],
    "test": ["{C}", "DETERGENT PROOF", "HAND DECORATED", "FOUNDED {Y}", "Permanent Colours",
             "DESIGN {N}", "COPYRIGHT {Y}", "Warranted", "Freezer to Oven", "Acid Resisting",
             "EXPORT QUALITY"],
}
COUNTS = {"fit": (150, 150), "tune": (60, 60), "test": (150, 150)}


def names(split: str, seed: int = 7) -> dict[str, list[str]]:
    """Potteries, lines, places and extras of one split, always the same."""
    rng = random.Random(f"{seed}-{split}")
    potteries, lines = COUNTS[split]
    houses = [a + b for a, b in itertools.product(STEMS[split].split(), ENDS[split].split())]
    pairs = [f"{a} {b}" for a, b in itertools.product(FIRST[split].split(), SECOND[split].split())]
    places = [a + b for a, b in itertools.product(STEMS[split].split(), PLACE_ENDS[split])]
    rng.shuffle(houses)
    rng.shuffle(pairs)
    rng.shuffle(places)
    every = WORKS[split]
    houses = [f"{h} {every[i % len(every)]}" if i % 4 else h for i, h in enumerate(houses[:potteries])]
    extras = []
    for text in EXTRAS[split]:
        for country in COUNTRIES[split] if "{C}" in text else [""]:
            year, number = rng.randrange(1790, 1965), rng.randrange(100, 99999)
            extras.append(text.replace("{C}", country.upper()).replace("{Y}", str(year))
                          .replace("{N}", str(number)))
    single = FIRST[split].split() + SECOND[split].split()
    chosen = pairs[: lines - len(single)] + single
    return {"potteries": houses, "lines": chosen[:lines], "places": places[:80], "extras": extras}


if __name__ == "__main__":
    for split in STEMS:
        for kind, words in names(split).items():
            print(f"{split} {kind} ({len(words)}): {', '.join(words)}")
