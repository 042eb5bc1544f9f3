/* reversing.kdl in any order, and the claim that both relays are never picked up together.
     spin -a reversing.pml && gcc -O2 -w -DNOREDUCE -DSAFETY -DBFS -o pan pan.c && ./pan
   -DBARE leaves out the interlock: then it must fail. */
#include "relay.pml"

bool forward, reverse, stop;
byte kf, kr;
#ifdef BARE
#define FREE(k) (true)
#else
#define FREE(k) (k == DROPPED)
#endif
#define KF (!stop && (forward || kf == PICKED) && FREE(kr))
#define KR (!stop && (reverse || kr == PICKED) && FREE(kf))
#define SETTLE TURN(kf, KF); TURN(kr, KR)

active proctype any_order() {
  do
  :: d_step { true -> forward = !forward; SETTLE }
  :: d_step { true -> reverse = !reverse; SETTLE }
  :: d_step { true -> stop = !stop; SETTLE }
  MOVES(kf, KF, SETTLE)
  MOVES(kr, KR, SETTLE)
  :: d_step { kf == PICKED && kr == PICKED -> assert(false) }
  od
}
