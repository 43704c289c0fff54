"""The rules against published figures.

Figures of an ISA bus in the SC400/SC410 data sheet, publication 21028, that the rules do not model, and why:

- Cycle end 125 ns after ready, ready low for 120 to 125 ns at least and 15.6 us at most (t6, t9): how long a
  card stretches a cycle is its own affair; the rules ask only whether it says so in time (t5).
- Address 61 ns before the address latch enable falls, which is 60 ns wide (t15, t16), and address enable
  145 ns before an I/O command (t17): the board's logic makes both, no option moves them, and cards publish
  no need.
- Write data held for 30 ns, read data for 0 ns after the command (t12, t14): the same holds; read data need
  no hold at all.
- DMA acknowledge 145 ns before the command, I/O read 235 ns before memory write, command off 60 ns before
  acknowledge off: DMA is judged by its clock and by how soon it serves a request.
- Secondary sources' address to I/O command of 91 ns, I/O-16 answer of 74 ns and data 74 to 85 ns before
  ready: they tell the other end of rules that are checked at the receiver.
"""
