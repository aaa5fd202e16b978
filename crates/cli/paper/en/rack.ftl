## What the rack prints
