// A page that shows no cases itself has the strip alone.

import { startWatch } from "./watching.js";

startWatch();
