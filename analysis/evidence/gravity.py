"""How grave each code may be: one row for every code that a sweep or a key-on log can carry.

3 do not drive, 2 repair before driving or the promise does not hold, 1 know it before a value is
entered, 0 nothing wrong. A finding graver than its row would make a sheet say what no test expects.
"""

from analysis.model.finding import KeyOnCode, SweepCode

OF_A_SWEEP: dict[SweepCode, tuple[int, ...]] = {
    "dropout": (3,), "no reading": (1, 2, 3), "open or short": (3,), "dead track": (3,),
    "late track": (3,), "flat spot": (2,), "noise": (2,), "clipping": (2,), "gap": (1,),
    "no return": (3,), "slow return": (3,), "not settled": (3,), "foot at rest": (2,),
    "step": (3,), "mismatch": (2,), "same wiper": (1, 2), "supply sag": (2,), "supply lost": (1,),
    "doubt": (3,), "not enough": (2,), "few returns": (1,), "few rest readings": (1,),
    "short rest": (1,), "noise not measured": (1,), "no held full press": (0,),
    "short of the stop": (1,), "cut short": (0,), "rate too low": (1,), "samples lost": (0,),
    "no lift-off": (1,), "play": (1,), "off at rest": (2,), "apart all along": (1,),
    "unusual relation": (1,), "perhaps off at rest": (1,), "not compared": (1, 2),
    "one track": (1,), "third track alone": (0,), "overlooked track": (1,),
    "supply off nominal": (1,), "supply clipped": (1,), "supply not recorded": (0,),
    "supply read seldom": (0,), "reference contradicted": (1,), "promise withdrawn": (2,),
    "return off the others": (2,), "rest creeps": (2,), "catches at rest": (2,),
    "costly dead band": (1, 2), "step not known": (1,),
    "step estimated": (0,), "nothing allowed for the car": (1,), "hum": (1,),
    "dead band stated": (0,), "pair measured": (0,), "shared short unseen": (0,),
    "log in the values": (1,), "log too noisy": (1,), "log passed the start of travel": (1,),
    "log not read all the time": (1,), "moves with warmth": (1,),
    "brake with pedal in the log": (1,), "allowance for the car": (0,),
}
OF_A_LOG: dict[KeyOnCode, tuple[int, ...]] = {
    "foot not stated": (2,), "dropout in the car": (2,), "key line still": (2,),
    "key line unclear": (2,), "rows lost": (2,), "short holes": (1,), "rate too low": (2,),
    "supply clipped": (2,), "track clipped": (2,), "away from rest": (3,), "readings repeat": (2,),
    "track not logged": (2,), "marks contradicted": (2,), "lead at a rail": (3,),
    "track at a rail all along": (3,), "rest is not the sweep's": (2,),
    "electrical, not a foot": (3,), "one key-on lifts": (1, 2), "supply not logged": (2,),
    "shift or alias": (1,), "reference contradicted": (2,),
    "reference contradicted, ratio stands": (1,),
}
