"""Kill -9 at random points of real work: on copies of one prepared database, from one process that forks.

`databases` prepares and lays down, `forking` runs something in a process and kills it, `works` is what is done,
`checks` is what must hold afterwards, `campaign` plays and counts.
"""
