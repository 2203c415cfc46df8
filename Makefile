# make demo   a bench session on the simulator, no hardware needed
# make test   every test
# make build  bin/backporch
# make device-test   capture devices, on virtual drivers in a virtual machine
#
# Each sets up what is missing first (see .ci/setup) and says what it does.

# Go's own archive unpacks to a folder that a fresh login may not have in its path.
export PATH := $(PATH):/usr/local/go/bin

.PHONY: build demo test check device-test clean

build:
	@.ci/setup build
	@mkdir -p bin
	go build -o bin/backporch ./cmd/backporch

demo: build
	bin/backporch demo

test:
	@.ci/setup test
	go test ./...

check:
	.ci/run

# CAPTURE_VM names the program that runs a command in a virtual machine with capture drivers.
device-test:
	@.ci/setup build
	.ci/device-test

clean:
	rm -rf bin
