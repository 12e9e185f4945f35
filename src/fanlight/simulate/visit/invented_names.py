"""Names of animals, people and practices that we made up; nobody is meant."""

from __future__ import annotations

ANIMALS = (
    "Juniper", "Pickle", "Marzipan", "Tansy", "Bramble", "Fennel", "Pebble", "Nutmeg", "Sorrel", "Clementine",
    "Pumpkin", "Thimble", "Quince", "Mulberry", "Saffron", "Waffle", "Heather", "Otis", "Figaro", "Dumpling", "Maple",
    "Barnaby", "Orla", "Biscuit", "Rosehip", "Tumbleweed", "Sprocket", "Conker", "Truffle", "Moss",
)  # fmt: skip
FAMILIES = (
    "Thistlewood", "Fenwright", "Oakhurst", "Brindlecombe", "Larkspurr", "Quillan", "Marshgarth", "Penhallick",
    "Wetherfold", "Dunmallow", "Starkfell", "Hollinquist", "Emberley", "Copperwaite", "Silverthorne", "Tarnfield",
    "Bellweather", "Applegarth", "Rookesby", "Hazelrigg", "Winterflood", "Mallowby", "Fairclove", "Underbarrow",
)  # fmt: skip
GIVEN = (
    "Ada", "Ivo", "Nell", "Tobias", "Wren", "Piet", "Maren", "Osric", "Linnea", "Caspar", "Petra", "Emlyn", "Hester",
    "Anselm", "Ottilie", "Bram", "Sunniva", "Leof", "Isaura", "Corin",
)  # fmt: skip
PLACES = (
    "Larkmead", "Quillmarsh", "Otterwhistle", "Farthing Tarn", "Mossgarth End", "Brackenhythe", "Ellerwick Mere",
    "Sallowbeck", "Thornapple", "Puddlewick", "Hobbleford", "Curlew Garth",
)  # fmt: skip
KINDS_OF_PRACTICE = ("Veterinary Surgery", "Animal Clinic", "Veterinary Practice", "Small Animal Practice")
