//! An allocator that counts: how much is held now, and the most that was held.

use std::alloc::{GlobalAlloc, Layout, System};
use std::sync::atomic::{AtomicUsize, Ordering::Relaxed};

static HELD: AtomicUsize = AtomicUsize::new(0);
static MOST: AtomicUsize = AtomicUsize::new(0);

struct Counting;

#[global_allocator]
static COUNTING: Counting = Counting;

fn more(bytes: usize) {
    let held = HELD.fetch_add(bytes, Relaxed) + bytes;
    MOST.fetch_max(held, Relaxed);
}

// Every call is handed on unchanged; only sizes are added up on the way.
unsafe impl GlobalAlloc for Counting {
    unsafe fn alloc(&self, layout: Layout) -> *mut u8 {
        more(layout.size());
        unsafe { System.alloc(layout) }
    }

    unsafe fn alloc_zeroed(&self, layout: Layout) -> *mut u8 {
        more(layout.size());
        unsafe { System.alloc_zeroed(layout) }
    }

    unsafe fn dealloc(&self, at: *mut u8, layout: Layout) {
        HELD.fetch_sub(layout.size(), Relaxed);
        unsafe { System.dealloc(at, layout) }
    }

    unsafe fn realloc(&self, at: *mut u8, layout: Layout, size: usize) -> *mut u8 {
        // While it is moved, both the old and the new place may be held.
        more(size);
        HELD.fetch_sub(layout.size(), Relaxed);
        unsafe { System.realloc(at, layout, size) }
    }
}

/// Begins to count anew; what is held now.
pub fn begin() -> usize {
    let held = HELD.load(Relaxed);
    MOST.store(held, Relaxed);
    held
}

/// The most that was held at once since, above what was held then.
pub fn most_since(held: usize) -> usize {
    MOST.load(Relaxed).saturating_sub(held)
}
