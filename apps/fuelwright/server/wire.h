/// From the library that speaks HTTP to the routes and back.
#pragma once

#include <memory>
#include <string>

#include "apps/fuelwright/server/context.h"

namespace fuelwright::apps::server {

/// Listens on 127.0.0.1 and answers. Every connection carries one request: on a loopback that costs
/// nothing, and what is left unread of a refused body can never be taken for a request.
class Wire {
 public:
  explicit Wire(Context& context);
  ~Wire();
  Wire(const Wire&) = delete;
  Wire& operator=(const Wire&) = delete;

  /// The port it got. Errors: conflict if it is taken, io.
  Result<int> bind(int port);
  /// Answers until stop(); from any thread.
  void listen();
  void stop();

 private:
  struct Inside;
  std::unique_ptr<Inside> inside_;
};

}  // namespace fuelwright::apps::server
