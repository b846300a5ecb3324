// The flow kernel for one instruction set; see lanes.h.
#define FUELWRIGHT_LANES 1
#define FUELWRIGHT_KERNEL kernel_scalar
#include "physics/breathing/kernel/engine.h"
#include "physics/breathing/kernel/entry.h"

namespace fuelwright::physics::kernel {

const Entry k_scalar{kernel_scalar::kLanes, kernel_scalar::kWorkspace, kernel_scalar::run_network};

}  // namespace fuelwright::physics::kernel
