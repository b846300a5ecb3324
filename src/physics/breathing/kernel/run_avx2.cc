// The flow kernel for one instruction set; see lanes.h.
#define FUELWRIGHT_LANES 8
#define FUELWRIGHT_KERNEL kernel_avx2
#include "physics/breathing/kernel/engine.h"
#include "physics/breathing/kernel/entry.h"

namespace fuelwright::physics::kernel {

const Entry k_avx2{kernel_avx2::kLanes, kernel_avx2::kWorkspace, kernel_avx2::run_network};

}  // namespace fuelwright::physics::kernel
