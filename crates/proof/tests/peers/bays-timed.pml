/* One breaker of bays.pml with delays, in whole ticks of TICK ms. Each device has one clock, which runs
   while the device is driven away from its position and starts anew when the drive goes or the move is
   made. No tick passes while a device is due. 52Y races the breaker.

     spin -a -DTICK=5 -DYMAX=20 bays-timed.pml && gcc -O2 -w -DNOREDUCE -DSAFETY -DBFS -o pan pan.c && ./pan -w24

   TICK     length of a tick, ms; delays are rounded outward
   YMAX     greatest pickup of 52Y, ms
   The property: one closing for one order. Delays are from memory and only size the problem. */

#define DOWN(ms) ((ms) / TICK)
#define UP(ms)   (((ms) + TICK - 1) / TICK)

bool p21, p87, k86, sync, gas;
bool hc, ht, brk, aux, y, spring, done;
byte t_k86, t_brk, t_aux, t_y, t_spring;

#define LOCKS  (!k86 && p87)
#define CLOSES (!brk && spring && hc && !k86 && !gas && sync && !aux && !y)
#define OPENS  (brk && aux && (p21 || k86 || ht))
#define FOLLOW (aux != brk)
#define FEED   (hc && (aux || y))
#define PICKS  (y != FEED)
#define CHARGE (!spring)

/* A clock whose device is no longer driven starts anew. */
#define CALM \
  if :: !LOCKS -> t_k86 = 0 :: else fi; \
  if :: !(CLOSES || OPENS) -> t_brk = 0 :: else fi; \
  if :: !FOLLOW -> t_aux = 0 :: else fi; \
  if :: !PICKS -> t_y = 0 :: else fi; \
  if :: !CHARGE -> t_spring = 0 :: else fi

active proctype within_times() {
  do
  :: d_step { true -> p21 = !p21; CALM }
  :: d_step { true -> p87 = !p87; CALM }
  :: d_step { true -> sync = !sync; CALM }
  :: d_step { true -> gas = !gas; CALM }
  :: d_step { LOCKS && t_k86 >= DOWN(10) -> k86 = true; t_k86 = 0; CALM }
  :: d_step { k86 && !p87 -> k86 = false; CALM }
  :: d_step { !hc && !ht -> hc = true; done = false; CALM }
  :: d_step { hc -> hc = false; done = false; CALM }
  :: d_step { !hc && !ht -> ht = true; CALM }
  :: d_step { ht -> ht = false; CALM }
  :: d_step { CLOSES && t_brk >= DOWN(50) -> assert(!done); brk = true; spring = false; done = true; t_brk = 0; CALM }
  :: d_step { OPENS && t_brk >= DOWN(20) -> brk = false; t_brk = 0; CALM }
  :: d_step { FOLLOW && t_aux >= DOWN(5) -> aux = brk; t_aux = 0; CALM }
  :: d_step { PICKS && t_y >= DOWN(10) -> y = FEED; t_y = 0; CALM }
  :: d_step { CHARGE && t_spring >= DOWN(200) -> spring = true; t_spring = 0; CALM }
  :: d_step {
       (!LOCKS || t_k86 < UP(20)) && (!CLOSES || t_brk < UP(60)) && (!OPENS || t_brk < UP(30)) &&
       (!FOLLOW || t_aux < UP(10)) && (!PICKS || t_y < UP(YMAX)) && (!CHARGE || t_spring < UP(200)) ->
       if :: LOCKS -> t_k86++ :: else fi;
       if :: CLOSES || OPENS -> t_brk++ :: else fi;
       if :: FOLLOW -> t_aux++ :: else fi;
       if :: PICKS -> t_y++ :: else fi;
       if :: CHARGE -> t_spring++ :: else fi
     }
  od
}
