/* latch.kdl in any order. A latch that has begun to move goes through; on its way both kinds of its
   contacts are open.
     spin -a latch.pml && gcc -O2 -w -DNOREDUCE -DSAFETY -DBFS -o pan pan.c && ./pan */
#include "relay.pml"

#define CLEARED    0
#define SET        1
#define TO_CLEARED 2
#define TO_SET     3

bool set, clear;
byte k2, k3;
#define K3 (k2 == SET)
#define SETTLE TURN(k3, K3)

active proctype any_order() {
  do
  :: d_step { true -> set = !set; SETTLE }
  :: d_step { true -> clear = !clear; SETTLE }
  :: d_step { k2 == CLEARED && set && k3 == DROPPED -> k2 = TO_SET; SETTLE }
  :: d_step { k2 == TO_SET -> k2 = SET; SETTLE }
  :: d_step { k2 == SET && clear -> k2 = TO_CLEARED; SETTLE }
  :: d_step { k2 == TO_CLEARED -> k2 = CLEARED; SETTLE }
  MOVES(k3, K3, SETTLE)
  od
}
