"""The checks themselves, one module a topic; importing them all fills the catalogue in its order."""

from gingerly.conformance.checks import (
    a_facts,
    b_door,
    c_look,
    d_offsets,
    e_traverse,
    f_stop,
    g_sense,
    h_cancel,
    i_trouble,
    j_sharing,
    k_numbers,
    l_sense_in_trouble,
    m_ways_and_offsets,
    n_cut_short,
)

__all__ = [
    "a_facts",
    "b_door",
    "c_look",
    "d_offsets",
    "e_traverse",
    "f_stop",
    "g_sense",
    "h_cancel",
    "i_trouble",
    "j_sharing",
    "k_numbers",
    "l_sense_in_trouble",
    "m_ways_and_offsets",
    "n_cut_short",
]
