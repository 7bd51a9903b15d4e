// The demo figures of the shop jobs: those of their pages in examples/jobs. They are nobody's settings.

/** @import { Cut, Opening } from "../job.js" */

import { NO_OPENING } from "../job.js";

/**
 * @typedef {object} JobDemo
 * @property {string} [trace] what is put on the plate, by its name among the demos
 * @property {string} [scrap]
 * @property {Partial<Cut>} [cut]
 * @property {Opening} [opening]
 * @property {Record<string, number>} [figures]
 * @property {Record<string, string>} [words]
 * @property {Record<string, string>} [files] by their purpose
 */

/** @type {Record<string, JobDemo>} */
export const JOB_DEMOS = {
  opening: { trace: "marks/vent_collar.csv", opening: { ...NO_OPENING, hole: 8, whole: 1, thickness: 2 } },
  blanks: { trace: "hinge_blank.csv", scrap: "scrap/bin_piece.csv", cut: { copies: 20, gap: 3, edge: 5, kerf: 1.5, feed: 2400, pierce: 0.4 } },
  coupon: { figures: { "coupon.kerf": 1.5, "coupon.pierce": 0.4 }, words: { "coupon.name": "hood 2" }, files: { sheet: "measurements/coupon_filled.csv", book: "measurements/material_book.csv" } },
  square: {
    figures: {
      "square.width": 400,
      "square.height": 300,
      "square.bottom": 404.1,
      "square.right": 297,
      "square.top": 403.9,
      "square.left": 297.1,
      "square.rising": 499.5,
      "square.falling": 503.3,
    },
  },
  tip: { trace: "touches/gusset_wrong_tip.csv", words: { "tip.believed": "stylus", "tip.actual": "torch" }, files: { profile: "machines/shop_machine.json" } },
  arm: { words: { "arm.tip": "stylus" }, files: { profile: "machines/as_delivered.json", touches: "touches/shelf_plate.csv" } },
};
