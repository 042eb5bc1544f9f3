/* A relay in any order. Its b contact opens before its a contact closes, and the other way round; in
   between both are open. A move whose drive goes away turns back at once. Buttons change at any moment. */

#define DROPPED 0
#define RISING  1
#define PICKED  2
#define FALLING 3

#define TURN(k, drive) \
  if :: k == RISING && !(drive) -> k = FALLING :: k == FALLING && (drive) -> k = RISING :: else fi

#define MOVES(k, drive, settle) \
  :: d_step { k == DROPPED && (drive) -> k = RISING; settle } \
  :: d_step { k == RISING && (drive) -> k = PICKED; settle } \
  :: d_step { k == PICKED && !(drive) -> k = FALLING; settle } \
  :: d_step { k == FALLING && !(drive) -> k = DROPPED; settle }
