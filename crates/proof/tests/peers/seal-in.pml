/* seal-in.kdl in any order.
     spin -a seal-in.pml && gcc -O2 -w -DNOREDUCE -DSAFETY -DBFS -o pan pan.c && ./pan */
#include "relay.pml"

bool start, reset;
byte k1;
#define K1 ((start || k1 == PICKED) && !reset)
#define SETTLE TURN(k1, K1)

active proctype any_order() {
  do
  :: d_step { true -> start = !start; SETTLE }
  :: d_step { true -> reset = !reset; SETTLE }
  MOVES(k1, K1, SETTLE)
  od
}
