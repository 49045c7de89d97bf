"""The rules engine: pure, dated, three-valued. `judging.judge(document, packs, at=...)` is the door.

From the bottom up:

    moments · expressions · conditions      the language of time and truth
    schedule · pack · tables · parameters · compiling · packset · vocabulary · loading      rule packs
    component_rows · document_rows · document_changes · document_references · document      the site document
    items · readings · facts · view · applicability · timeline      what is known at a moment, and the line in time
    evidence · sorting · recurring · walking      what was done, and what is due next
    case · answers · recurring_duty · one_off · cover · duties · case_overrides · pairs      one rule, one item
    judging · comparing · coverage · retention · document_schema      the doors

Readings that are this engine's own, beside those listed with the modules:

- A judged day means its last instant, so a judgement is always one of an instant.
- A condition that holds (`must`) while the duty is suspended is suspended, decided or not.
- A one-off belongs to the wording in which its due falls, not to the wording of the judged day; a due that would have
  fallen before the first wording took effect is no duty.
- An agency's letter is a wording of its own between its two days, so changing law and case decisions work alike.
- A new status without a measured residue forgets the residue measured before it.
- A moment inside an answer to an alarm that lies ahead of the judged moment is unknown.
- The calendar of business days is that of the rule's own pack; calendars of several packs are not joined.
- A path over a record about several items has a value only if they agree; with several targets the worst counts.
- A document without a last day is unclear; a designation without one lasts.
"""
