"""Codes of the API that people read as words: the code itself, with blanks. Named here, they stand in the catalogue."""

from __future__ import annotations


def _(code: str) -> str:
    """Only marks a text: it is asked for when it is shown (`language.words`)."""
    return code


# fmt: off
WORDS = (
    # patient, case
    _("septic"), _("hypovolemic"), _("hemorrhagic"), _("cardiogenic"), _("anaphylactic"), _("neurogenic"),
    _("obstructive"), _("undifferentiated"), _("head"), _("spinal cord"), _("torso"), _("limb"), _("trauma"),
    _("postpartum"), _("gut"), _("anticoagulant"), _("beta blocker"), _("steroid dependent"), _("heart failure"),
    _("dialysis"), _("pacemaker"), _("transplant"), _("myasthenia"), _("female"), _("male"), _("other"), _("unknown"),
    _("years"), _("months"), _("days"), _("year"), _("month"), _("day"),
    _("known"), _("stated"), _("estimated"), _("measured"), _("length"), _("age"),
    _("open"), _("handed over"), _("closed"), _("refused"), _("died"), _("cancelled"), _("moved"),
    _("transport"), _("arrest"), _("pulse back"), _("ended"), _("adult"), _("child"),
    _("no concern"), _("learning"), _("follow up"), _("hospital"), _("bystander"), _("patient"), _("other crew"),
    _("parent"), _("guardian"), _("complaint"), _("impression"), _("destination"), _("eta"), _("incident"),
    _("advice"), _("refusal"), _("end resuscitation"),
    # measurements and what is to be read
    _("pressure"), _("pressure or pulses"), _("pulses"), _("alertness"), _("glucose"), _("temperature"), _("lungs"),
    _("rhythm"), _("ventricular tachycardia"), _("torsades"), _("irregular wide"), _("atrial fibrillation"),
    _("heart block"), _("preexcited fibrillation"), _("pre excitation"), _("long qt"), _("wide"),
    _("not shockable"),
    _("heart rate"), _("breathing"), _("clear"), _("crackles"), _("wheeze"), _("diminished"), _("cuff"), _("manual"),
    _("palpated"), _("arterial"), _("unobtainable"), _("radial"), _("femoral"), _("carotid"), _("none"), _("low"),
    _("high"), _("weight"), _("onset"), _("glucose mg dl"), _("systolic"), _("diastolic"), _("danger"), _("warning"),
    _("slow"), _("fast"),
    # treatments, doses, orders
    _("pressor"), _("vasodilator"), _("sedative"), _("opioid"), _("fluid"), _("blood"), _("push"), _("bolus"),
    _("infusion"), _("im"), _("syringe"), _("bag"), _("cylinder"), _("given"), _("running"), _("held"), _("stopped"),
    _("finished"), _("done"), _("failed"), _("attempted"), _("requested"), _("approved"), _("declined"),
    _("withdrawn"), _("read back"), _("not given"), _("expired"), _("voided"), _("placed"),
    _("overdue"), _("due"), _("change"), _("hold"), _("stop"), _("give"), _("start"),
    _("vitals"), _("intervention"), _("procedure"), _("note"), _("phase"), _("container"),
    _("airway"), _("ventilation"), _("oxygen"), _("tourniquet"), _("pelvic binder"),
    _("wound packing"), _("chest decompression"), _("pacing"), _("cardioversion"), _("defibrillation"),
    _("warming"), _("splint"),
    # alerts, and whom they reach
    _("low pressure"), _("falling"), _("high pressure"), _("low saturation"), _("slow breathing"), _("vital sign"),
    _("after pressor"), _("pressor running out"), _("reassessment overdue"), _("order waiting"),
    _("readback waiting"), _("readback mismatch"), _("question waiting"), _("no contact"), _("not accepted"),
    _("countersign waiting"), _("dose outside limits"), _("order not given"), _("clock offset"), _("medium"),
    _("order seen"), _("moved not seen"), _("no vitals"), _("crackles on fluid"), _("no sedation"),
    _("physicians"), _("supervisor"), _("physician"), _("director"), _("crew"),
    # findings that a rule set says where they come from
    _("weight unknown"), _("weight estimated"), _("pressure stale"), _("pressure above goal"), _("well above goal"),
    _("no pressure since last dose"), _("no fluid yet"), _("bleeding first"), _("fluid restricted"), _("allergy"),
    _("order not read back"), _("infusion running"), _("not in rule set"), _("unlisted strength"),
    _("strength not stated"), _("wrong stock"), _("onset unknown"), _("age not covered"), _("starts by order"),
    _("route not allowed"), _("volume not measurable"), _("rate not deliverable"), _("care limits"),
    _("refuses blood"),
)
# fmt: on
