"""One draft for each class of fault: the demonstration rules with one entry changed, and what must be said of it."""

from __future__ import annotations

from typing import NamedTuple


class Draft(NamedTuple):
    """`old` becomes `new`; the fault is named at `entry`, on the line that holds `line`, in words that hold `words`."""

    what: str
    old: str
    new: str
    entry: str
    line: str
    words: str

    def of(self, text: str) -> str:
        """The text with this change."""
        assert self.old in text, self.what
        return text.replace(self.old, self.new, 1)


PUSH, BOLUS = "treatments.epinephrine-push-dose", "treatments.crystalloid-bolus"
BROKEN = (
    Draft(
        "recipe not conserving mass",
        'volume = "9 mL"',
        'volume = "10 mL"',
        f"{PUSH}.recipe",
        "[treatments.epinephrine-push-dose.recipe]",
        "makes 9.09 mcg per mL, not 10 mcg per mL",
    ),
    Draft(
        "child above adult",
        'hard = { amount = "40 mL/kg", at_most = "2000 mL"',
        'hard = { amount = "400 mL/kg", at_most = "9000 mL"',
        f"{BOLUS}.bands.3.hard",
        'hard = { amount = "400 mL/kg"',
        "hard of a child exceeds the adult's: 9,000 mL against 2,000 mL for a child of 30 kg",
    ),
    Draft(
        "child without limit per kg",
        'hard = { amount = "40 mL/kg", at_most = "2000 mL"',
        'hard = { amount = "900 mL"',
        f"{BOLUS}.bands.3.hard",
        'hard = { amount = "900 mL"',
        "a child has no hard limit per kg",
    ),
    Draft(
        "ten times most within the cap of a child whom nobody weighed",
        "[treatments.atropine.reassessment]",
        '[[treatments.atropine.bands]]\nwho = "child"\nweight = "unknown"\nsource = "choice"\n'
        'most = { amount = "0.1 mg", source = "choice" }\n\n[treatments.atropine.reassessment]',
        "treatments.atropine.bands.6.most",
        'most = { amount = "0.1 mg", source = "choice" }',
        "ten times a child's standing limit is within its hard limit: 0.1 mg, 1 mg for a child of unknown weight",
    ),
    Draft(
        "least above most",
        'least = { amount = "10 mcg", source = "push-transport" }',
        'least = { amount = "30 mcg", source = "push-transport" }',
        f"{PUSH}.bands.1.least",
        'least = { amount = "30 mcg"',
        "least exceeds most: 30 mcg against 20 mcg for an adult of 30 kg",
    ),
    Draft(
        "guide over the hard limit",
        'guide = { amount = "1 mcg/kg", at_most = "10 mcg", source = "push-child" }',
        'guide = { amount = "6 mcg/kg", at_most = "60 mcg", source = "push-child" }',
        f"{PUSH}.bands.2.guide",
        'guide = { amount = "6 mcg/kg"',
        "guide exceeds hard: ",
    ),
    Draft(
        "ages that overlap",
        "[treatments.epinephrine-push-dose.reassessment]",
        '[[treatments.epinephrine-push-dose.bands]]\nwho = "child"\nunder_days = 2190\nsource = "choice"\n'
        'least = { amount = "0.5 mcg", source = "choice" }\n'
        '[[treatments.epinephrine-push-dose.bands]]\nwho = "child"\nfrom_days = 1825\nsource = "choice"\n'
        'least = { amount = "0.75 mcg", source = "choice" }\n[treatments.epinephrine-push-dose.reassessment]',
        f"{PUSH}.bands.4.least",
        'least = { amount = "0.75 mcg"',
        "least is another in band 4, and some patients fit both by days",
    ),
    Draft(
        "an indication that the treatment has not",
        'indications = ["organophosphate"]\ninterval',
        'indications = ["organophosphates"]\ninterval',
        "treatments.atropine.bands.2.indications",
        'indications = ["organophosphates"]',
        "holds 'organophosphates', which is none of the treatment's indications",
    ),
    Draft(
        "a route that the treatment has not",
        'routes = ["IN"]\nmost = { amount = "4 mg", source = "naloxone-spray" }',
        'routes = ["PO"]\nmost = { amount = "4 mg", source = "naloxone-spray" }',
        "treatments.naloxone.bands.3.routes",
        'routes = ["PO"]',
        "holds 'PO', which is none of the treatment's routes",
    ),
    Draft(
        "a route without limits",
        'least = { amount = "0.4 mg", source = "naloxone-label" }',
        'routes = ["IV", "IO", "IM", "SC"]\nleast = { amount = "0.4 mg", source = "naloxone-label" }',
        "treatments.naloxone",
        "[treatments.naloxone]",
        "adult of known weight by intranasal: no hard limit",
    ),
    Draft(
        "a source that is not on the list",
        'discard_after_h = { value = 4, unit = "h", source = "immediate-use" }',
        'discard_after_h = { value = 4, unit = "h", source = "nowhere" }',
        "ledger.discard_after_h.source",
        "discard_after_h = ",
        "the source 'nowhere' is not among the sources",
    ),
    Draft(
        "no source",
        'most = { amount = "500 mL", source = "choice" }',
        'most = { amount = "500 mL" }',
        f"{BOLUS}.bands.2.most",
        'most = { amount = "500 mL" }',
        "lacks its source",
    ),
    Draft(
        "unknown key",
        "count_by_volume = true",
        "count_by_volum = true",
        f"{BOLUS}.count_by_volum",
        "count_by_volum =",
        "not a known entry",
    ),
    Draft(
        "unknown unit",
        'within = { value = 15, unit = "min"',
        'within = { value = 15, unit = "h"',
        f"{BOLUS}.within.unit",
        "within =",
        "is read in min",
    ),
    Draft(
        "unit not on the list",
        'at_most = "1000 mL", source = "bolus-thirty"',
        'at_most = "1000 cc", source = "bolus-thirty"',
        f"{BOLUS}.bands.0.most.at_most",
        "1000 cc",
        "is not an amount",
    ),
    Draft(
        "unknown reading needed",
        'needs = ["pressure"]\nalso = ["lungs"]',
        'needs = ["pressure", "lung"]\nalso = ["lungs"]',
        f"{BOLUS}.reassessment.needs",
        "needs =",
        "holds 'lung'",
    ),
    Draft(
        "unknown patient",
        'who = "adult"\nweight',
        'who = "grown-up"\nweight',
        f"{BOLUS}.bands.2.who",
        'who = "grown-up"',
        "is 'grown-up'",
    ),
    Draft(
        "unknown impression",
        'impressions = ["hemorrhagic"]\nmost',
        'impressions = ["bleeding"]\nmost',
        f"{BOLUS}.bands.4.impressions",
        '"bleeding"',
        "holds 'bleeding'",
    ),
    Draft(
        "unknown flag",
        'flags = ["crackles", "fluid_restricted"]',
        'flags = ["crackle"]',
        f"{BOLUS}.flags",
        "flags =",
        "holds 'crackle'",
    ),
    Draft(
        "band for nobody",
        'under_days = 28\nsource = "neonate-bolus"\n',
        'under_days = 0\nsource = "neonate-bolus"\n',
        f"{BOLUS}.bands.10.under_days",
        "under_days = 0",
        "for nobody",
    ),
    Draft(
        "tall-man of another drug",
        'fentanyl = "fentaNYL"',
        'fentanyl = "SUFentanil"',
        "tall_man.fentanyl",
        "SUFentanil",
        "only the size of the letters",
    ),
    Draft(
        "another name that stands in any text",
        'names = ["Narcan"]',
        'names = ["Narcan", "–"]',
        "names.23.names",
        'names = ["Narcan", "–"]',
        "too short",
    ),
    Draft(
        "no source for a finding", 'crackles = "bolus-pathway"\n', "", "findings.crackles", "[findings]", "is missing"
    ),
    Draft(
        "not finite",
        "critical_map = { value = 60",
        "critical_map = { value = inf",
        "pressure.critical_map.value",
        "critical_map",
        "above zero",
    ),
)
