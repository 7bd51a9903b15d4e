//! Unpacks LZMA in the page's one file.
//!
//! A browser unpacks gzip by itself. LZMA packs WebAssembly a quarter tighter, which is many times what this module
//! weighs; it lies in the file gzipped. `www/parts.js` makes one instance for one part: it asks for [`room`], puts there
//! what is packed and has it unpacked by [`unpack`]. Numbers and one memory cross the border, so there is no glue; the
//! instance is dropped with its memory, so nothing in here is ever freed.

#![cfg_attr(target_arch = "wasm32", no_std)]

extern crate alloc;

use alloc::boxed::Box;
use alloc::vec;
use alloc::vec::Vec;
use lzma_rust2::LzmaReader;
#[cfg(target_arch = "wasm32")]
use lzma_rust2::Read as _;
#[cfg(not(target_arch = "wasm32"))]
use std::io::Read as _;

/// Memory for the dictionary, KiB: more than any part of the file has.
const MOST: u32 = 64 * 1024;
/// Longest plain text, bytes.
const LONGEST: u64 = 64 * 1024 * 1024;

/// Room for so many packed bytes.
#[unsafe(no_mangle)]
pub extern "C" fn room(length: usize) -> *mut u8 {
    Box::leak(vec![0; length].into_boxed_slice()).as_mut_ptr()
}

/// Unpacks so many bytes from a [`room`]: where what they were begins, as long as their head says; nowhere (0) where they
/// are not what was packed.
///
/// # Safety
/// The room must be one of so many bytes.
#[unsafe(no_mangle)]
pub unsafe extern "C" fn unpack(room: *const u8, length: usize) -> *const u8 {
    // SAFETY: it is what `room` gave.
    let packed = unsafe { core::slice::from_raw_parts(room, length) };
    match unpacked(packed) {
        Some(plain) => Box::leak(plain.into_boxed_slice()).as_ptr(),
        None => core::ptr::null(),
    }
}

/// What was packed; its head tells how long it is.
#[must_use]
pub fn unpacked(packed: &[u8]) -> Option<Vec<u8>> {
    let told: [u8; 8] = packed.get(5..13)?.try_into().ok()?;
    let length = u64::from_le_bytes(told);
    if length > LONGEST {
        return None;
    }
    let mut plain = vec![0; usize::try_from(length).ok()?];
    let mut reader = LzmaReader::new_mem_limit(packed, MOST, None).ok()?;
    reader.read_exact(&mut plain).ok()?;
    Some(plain)
}

/// What the standard library would bring: an end for panics, and memory that only grows.
#[cfg(target_arch = "wasm32")]
mod alone {
    use core::alloc::{GlobalAlloc, Layout};
    use core::arch::wasm32::{memory_grow, memory_size, unreachable};
    use core::sync::atomic::{AtomicUsize, Ordering::Relaxed};

    const PAGE: usize = 64 * 1024;

    #[panic_handler]
    fn panic(_: &core::panic::PanicInfo<'_>) -> ! {
        unreachable()
    }

    struct Growing {
        /// Where free memory begins; 0 before any was asked for.
        free: AtomicUsize,
    }

    #[global_allocator]
    static MEMORY: Growing = Growing {
        free: AtomicUsize::new(0),
    };

    // SAFETY: every place handed out lies behind the one before, within the memory there is; there is one thread.
    unsafe impl GlobalAlloc for Growing {
        unsafe fn alloc(&self, layout: Layout) -> *mut u8 {
            let there = memory_size(0) * PAGE;
            let free = match self.free.load(Relaxed) {
                0 => there,
                free => free,
            };
            let at = free.next_multiple_of(layout.align());
            let end = at.saturating_add(layout.size());
            let lacks = end.saturating_sub(there).div_ceil(PAGE);
            if lacks > 0 && memory_grow(0, lacks) == usize::MAX {
                return core::ptr::null_mut();
            }
            self.free.store(end, Relaxed);
            at as *mut u8
        }

        unsafe fn dealloc(&self, _: *mut u8, _: Layout) {}
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_is_not_packed_is_refused() {
        assert_eq!(unpacked(b""), None);
        assert_eq!(unpacked(&[0xff; 40]), None);
        let mut boast = [0; 30];
        boast[0] = 93;
        boast[5..13].copy_from_slice(&u64::MAX.to_le_bytes());
        assert_eq!(unpacked(&boast), None);
    }
}
