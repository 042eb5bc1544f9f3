/* Breakers side by side that share only what happens outside: line trip, bus trip, a lockout 86, the
   permissive of 25 and one gas zone. Every device that is driven may move at any moment.

     spin -a -DBAYS=2 -DROBUST bays.pml && gcc -O2 -w -DNOREDUCE -DSAFETY -DBFS -o pan pan.c && ./pan -w22

   BAYS     1 to 3
   ROBUST   the spring motor waits for 52Y or for the end of the order; without it 52Y races the breaker
   STILL    25 stands and the gas is good: fewer places
   The property: one closing for one order. */

bool p21, p87, k86;
#ifdef STILL
#define SYNC true
#define GAS false
#else
bool sync, gas;
#define SYNC sync
#define GAS gas
#endif

bool hc[BAYS], ht[BAYS], brk[BAYS], aux[BAYS], y[BAYS], spring[BAYS], done[BAYS];

#define CLOSE(i) (hc[i] && !k86 && !GAS && SYNC && !aux[i] && spring[i] && !y[i])
#define TRIP(i)  (aux[i] && (p21 || k86 || ht[i]))
#define FEED(i)  (hc[i] && (aux[i] || y[i]))
#ifdef ROBUST
#define MOTOR(i) (y[i] || !hc[i])
#else
#define MOTOR(i) (true)
#endif

#define BAY(i) \
  :: d_step { !hc[i] && !ht[i] -> hc[i] = true; done[i] = false } \
  :: d_step { hc[i] -> hc[i] = false; done[i] = false } \
  :: d_step { !hc[i] && !ht[i] -> ht[i] = true } \
  :: d_step { ht[i] -> ht[i] = false } \
  :: d_step { !brk[i] && spring[i] && CLOSE(i) -> assert(!done[i]); brk[i] = true; spring[i] = false; done[i] = true } \
  :: d_step { brk[i] && TRIP(i) -> brk[i] = false } \
  :: d_step { aux[i] != brk[i] -> aux[i] = brk[i] } \
  :: d_step { y[i] != FEED(i) -> y[i] = FEED(i) } \
  :: d_step { !spring[i] && MOTOR(i) -> spring[i] = true }

active proctype any_order() {
  do
  :: d_step { true -> p21 = !p21 }
  :: d_step { true -> p87 = !p87 }
#ifndef STILL
  :: d_step { true -> sync = !sync }
  :: d_step { true -> gas = !gas }
#endif
  :: d_step { !k86 && p87 -> k86 = true }
  :: d_step { k86 && !p87 -> k86 = false }
  BAY(0)
#if BAYS > 1
  BAY(1)
#endif
#if BAYS > 2
  BAY(2)
#endif
  od
}
