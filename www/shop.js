// What belongs to the shop and not to one job: the machine's profile, the material book, and the figures
// typed on the forms of the shop jobs. Kept in this browser.

/** @import { Profile } from "./pkg/trued_web.js" */

/**
 * @typedef {object} Shop
 * @property {Profile} machine what every cut file is corrected for
 * @property {string} book the material book, CSV
 * @property {Record<string, number | null>} figures lengths in mm, by the key of their blank
 * @property {Record<string, string>} words names and choices, by the key of their blank
 * @property {string} touches rows of touches of known points
 */

export const SHOP = "trued-shop";

/** @returns {Shop} */
export function emptyShop() {
  return { machine: {}, book: "", figures: {}, words: {}, touches: "" };
}

/** @returns {Shop} */
export function recallShop() {
  try {
    return { ...emptyShop(), ...JSON.parse(localStorage.getItem(SHOP) ?? "{}") };
  } catch {
    return emptyShop();
  }
}

/** @param {Shop} shop @returns {boolean} whether it was kept */
export function keepShop(shop) {
  try {
    localStorage.setItem(SHOP, JSON.stringify(shop));
    return true;
  } catch {
    return false;
  }
}
