// The kernels as function pointers, one per instruction set.
#pragma once

#include "physics/breathing/kernel/network.h"

namespace fuelwright::physics::kernel {

struct Entry {
  int lanes;
  unsigned long workspace;  // bytes, to be aligned to 64
  void (*run)(const Network&, void* workspace, bool warm, Result*);
};

extern const Entry k_scalar, k_sse2, k_avx2, k_avx512;

}  // namespace fuelwright::physics::kernel
