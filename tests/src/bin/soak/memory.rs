//! How much memory one piece of work takes at most: an allocator that counts for each thread.
//!
//! The core starts no threads, so what the thread holds over what it held before is what the call took.

use std::alloc::{GlobalAlloc, Layout, System};
use std::cell::Cell;

thread_local! {
    static HELD: Cell<isize> = const { Cell::new(0) };
    static MOST: Cell<isize> = const { Cell::new(0) };
}

/// The system's allocator, counted.
pub struct Counting;

fn change(by: isize) {
    // A thread that is ending has nothing left to count.
    let _ = HELD.try_with(|held| {
        let now = held.get() + by;
        held.set(now);
        let _ = MOST.try_with(|most| most.set(most.get().max(now)));
    });
}

// SAFETY: every call goes to the system's allocator unchanged; counting allocates nothing.
unsafe impl GlobalAlloc for Counting {
    unsafe fn alloc(&self, layout: Layout) -> *mut u8 {
        change(layout.size() as isize);
        unsafe { System.alloc(layout) }
    }

    unsafe fn alloc_zeroed(&self, layout: Layout) -> *mut u8 {
        change(layout.size() as isize);
        unsafe { System.alloc_zeroed(layout) }
    }

    unsafe fn dealloc(&self, at: *mut u8, layout: Layout) {
        change(-(layout.size() as isize));
        unsafe { System.dealloc(at, layout) }
    }

    unsafe fn realloc(&self, at: *mut u8, layout: Layout, size: usize) -> *mut u8 {
        // Both may be there for a moment.
        change(size as isize);
        change(-(layout.size() as isize));
        unsafe { System.realloc(at, layout, size) }
    }
}

/// Does the work and says how many bytes it held at most.
pub fn measured<T>(work: impl FnOnce() -> T) -> (T, usize) {
    let before = HELD.with(Cell::get);
    MOST.with(|most| most.set(before));
    let got = work();
    let most = MOST.with(Cell::get) - before;
    (got, usize::try_from(most).unwrap_or(0))
}
