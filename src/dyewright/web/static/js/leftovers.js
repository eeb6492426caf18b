/* On every page but the pot's own: taps that a pot screen could not send before it was left are sent now. */

import { sendLeftovers } from "./queue.js";

sendLeftovers();
