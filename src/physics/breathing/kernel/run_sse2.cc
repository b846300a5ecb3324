// The flow kernel for one instruction set; see lanes.h.
#define FUELWRIGHT_LANES 4
#define FUELWRIGHT_KERNEL kernel_sse2
#include "physics/breathing/kernel/engine.h"
#include "physics/breathing/kernel/entry.h"

namespace fuelwright::physics::kernel {

const Entry k_sse2{kernel_sse2::kLanes, kernel_sse2::kWorkspace, kernel_sse2::run_network};

}  // namespace fuelwright::physics::kernel
