"""Pages as a browser asks for them and reads them, and which there are."""

from __future__ import annotations

import html5lib

BROWSER = {"Accept": "text/html,application/xhtml+xml,application/xml;q=0.9,*/*;q=0.8"}
MIX = (
    "title=Kiln%20lid&bucket=10&material_1=cac-40&amount_1=25&unit_1=kg&material_2=expanded-clay"
    "&amount_2=5&unit_2=bucket&fill_2=poured&material_3=chamotte-40&amount_3=10&unit_3=kg"
    "&water=12&water_unit=L&fired_at=1000"
)
MOULD = f"{MIX}&mould=12&mould_unit=L&spare=10&thick=50"
LIKE_ONE_HELD = (
    "bucket=10&material_1=portland-cement&amount_1=25&unit_1=kg&material_2=exfoliated-vermiculite"
    "&amount_2=10&unit_2=bucket&water=20&water_unit=L&state=air-dry"
)
"""A mix near measured bodies that are held."""
SEARCH = (
    "sent=1&material_1=cac-40&least_1=15&most_1=60&material_2=expanded-clay&most_2=80"
    "&material_3=expanded-perlite&most_3=50&material_4=fireclay&most_4=25&bucket=10&shares_by=mass"
    "&fired_at=1000&density_below=1200&conducts_below=0.4&conducts_at=600&wish_conductivity=1"
    "&wish_binder=1&candidates=2000"
)
WALL = (
    "material=chamotte&material=expanded-clay&material=expanded-perlite&temperature=1100%20Cel"
    "&behind=700%20Cel&with=cac-40"
)
MANY = "exfoliated-vermiculite"
PAGES = (
    "/",
    "/reading",
    "/materials",
    "/materials?q=clay&kind=aggregate",
    "/materials/expanded-perlite",
    f"/materials/{MANY}",
    "/materials/fireclay-brick?units=us",
    f"/materials/{MANY}/properties/thermal_conductivity",
    f"/materials/{MANY}/properties/thermal_conductivity?units=us",
    "/materials/expanded-perlite/properties/pore_size",
    "/materials/expanded-perlite/properties/emissivity",
    "/materials/expanded-perlite/survival?temperature=1050%20Cel",
    "/materials/quartz/survival?temperature=600%20Cel&units=us",
    "/materials/cac-40/survival?temperature=900%20Cel&with=chamotte-40&place=face&margin=20%20K",
    "/survival",
    "/compare",
    f"/compare/result?{WALL}",
    "/compare/result?material=quartz&temperature=1112%20%5BdegF%5D&place=behind&units=us",
    "/mix",
    f"/mix?{MOULD}&add=1",
    f"/mix/result?{MIX}",
    f"/mix/result?{LIKE_ONE_HELD}&rule=maxwell&units=us",
    f"/mix/result?{MOULD}",
    f"/mix/card?{MIX}",
    f"/mix/card?{MOULD}",
    "/mix-search",
    f"/mix-search/result?{SEARCH}",
    f"/mix-search/result?{SEARCH.replace('below=1200', 'below=4')}&units=us",
    "/properties",
    "/properties/thermal_conductivity",
    "/sources",
    "/sources?q=castable&page=1",
    "/sources/vdi-2010-heatatlas",
    "/values/expanded-perlite.service_limit.2",
    "/values/aerated-concrete.pore_size.1",
    "/specimens",
    "/specimens/acid-bonded-vermiculite-light",
    "/holdings",
    "/holdings?kind=admixture",
)


class Shown:
    """A page as a browser reads it: strictly parsed, with a few ways to look into it."""

    def __init__(self, response):
        self.status = response.status_code
        self.headers = response.headers
        self.text = response.get_data(as_text=True)
        parser = html5lib.HTMLParser(namespaceHTMLElements=False)
        self.tree = parser.parse(self.text)
        self.faults = [(place, name) for place, name, _ in parser.errors]

    def all(self, path):
        return self.tree.findall(path)

    def words(self, path="body"):
        """Give the text below an element, spaces folded."""
        return " ".join("".join(self.tree.find(path).itertext()).split())

    def named(self, name):
        """Give the form field of a name."""
        return next(each for each in self.tree.iter() if each.get("name") == name)

    def by_id(self, key):
        return next(each for each in self.tree.iter() if each.get("id") == key)

    def links(self):
        return [each.get("href") for each in self.tree.iter("a")]
